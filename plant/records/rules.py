"""Pure rules of keeping records.

The figures are our own defaults, the law of the plant decides: 7 years for records; in medical rooms the longest life
of a product and one year more, where that is longer; 3 years for personal test answers. Known floors below them:
21 CFR 117.315 asks 2 years for food records, ISO 13485 clause 4.2.5 the life of the device and no less than 2 years.
"""

from datetime import datetime

from dateutil.relativedelta import relativedelta

RECORDS_YEARS = 7
ANSWERS_YEARS = 3
LONGEST_YEARS = 100
REVIEW_EVERY_DAYS = 31


def years_to_keep(*, medical: bool, set_years: int | None, product_life_years: int | None, default: int) -> int:
    """How long: what was set, never below the default, in medical rooms never below product life and one year."""
    years = max(default, set_years or 0)
    if medical and product_life_years is not None:
        years = max(years, product_life_years + 1)
    return years


def due_before(at: datetime, years: int) -> datetime:
    """What is older than this moment has been kept long enough."""
    return at - relativedelta(years=years)
