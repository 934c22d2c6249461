"""Every shown view again, slowly, in plain Python: what the SQL is held against.

Written from the definitions (design, head comments of the .sql files, the lifecycle table), day by day and plant by
plant, in exact fractions; no pandas and no SQL. ``views`` is the way in.
"""
