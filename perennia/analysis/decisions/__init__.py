"""Questions whose answers decide what is kept and what is sown."""
