"""The sections of the year's report, a module each: a function takes a year's result and gives a Section or None."""
