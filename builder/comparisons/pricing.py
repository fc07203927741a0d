"""Prices are dated observations: what is old says how old."""

from __future__ import annotations

from datetime import date

from builder import wording
from catalog.records import Price

OLD_AFTER_DAYS = 180


def age_days(price: Price, today: date) -> int:
    """Days since the price was seen. [1]"""
    return (today - date.fromisoformat(price.date[:10])).days


def age_remark(price: Price, today: date) -> str:
    """What is to be said of an old price; "" for one of the last 180 days."""
    age = age_days(price, today)
    return f"{wording.count(age, 'day')} old: look again" if age > OLD_AFTER_DAYS else ""
