"""Did flowers set, and what pattern do the failures follow: truss, position, date, load?"""
