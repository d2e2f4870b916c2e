"""German pages write numbers as drawings, records and gauges do: a point, and a thin space from 10 000 up (ISO 80000).

A comma on the page beside a point in the drawing would let 1.515 be read as one thousand five hundred and fifteen.
"""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = "\u202f"
NUMBER_GROUPING = 3
DATE_FORMAT = "j. F Y"
SHORT_DATE_FORMAT = "j. M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j. F Y H:i"
SHORT_DATETIME_FORMAT = "j. M Y H:i"
FIRST_DAY_OF_WEEK = 1
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d.%m.%Y"]
TIME_INPUT_FORMATS = ["%H:%M", "%H:%M:%S"]
DATETIME_INPUT_FORMATS = ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%d.%m.%Y %H:%M"]
