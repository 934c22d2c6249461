"""How records are kept: Arrow schemas from the record classes, Delta tables, batches, compaction."""
