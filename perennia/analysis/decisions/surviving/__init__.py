"""Which roots come through the winter, and how long plants live."""
