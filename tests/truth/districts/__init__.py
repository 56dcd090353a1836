"""Invented cane districts whose seasons obey laws that the program's forecast does not know.

`climate` draws rain by storms, `district` the crop, the mill and a season's days. Every range from
which a district is drawn was written before the forecast was first run against it.
"""
