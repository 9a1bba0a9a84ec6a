"""Times on paper: local time in one fixed offset from UTC, which the first page names once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone, tzinfo

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


class Clock:
    """Tells moments in one fixed offset, so that no hour of the record comes twice or never."""

    def __init__(self, made_at: datetime, zone: tzinfo | None = None) -> None:
        """zone: None takes the computer's own, with the offset that holds at `made_at`."""
        if made_at.tzinfo is None:
            made_at = made_at.replace(tzinfo=UTC)
        self.made_at = made_at
        offset = made_at.astimezone(zone).utcoffset() or timedelta()
        self.zone = timezone(offset)

    def offset(self) -> str:
        """ "UTC+01:00"."""
        minutes = round((self.zone.utcoffset(None) or timedelta()).total_seconds() / 60)
        sign = "-" if minutes < 0 else "+"
        return f"UTC{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"

    def local(self, moment: datetime | str) -> datetime:
        """The moment, or what an event stores of it, as local time."""
        if isinstance(moment, str):
            moment = datetime.fromisoformat(moment)
        return moment.astimezone(self.zone)

    def time(self, moment: datetime | str) -> str:
        """ "14:05"."""
        return self.local(moment).strftime("%H:%M")

    def second(self, moment: datetime | str) -> str:
        """ "14:05:31"."""
        return self.local(moment).strftime("%H:%M:%S")

    def day(self, moment: datetime | str) -> str:
        """ "4 May 2031"."""
        local = self.local(moment)
        return f"{local.day} {MONTHS[local.month - 1]} {local.year}"

    def short_day(self, moment: datetime | str) -> str:
        """ "4 May"."""
        local = self.local(moment)
        return f"{local.day} {MONTHS[local.month - 1][:3]}"

    def moment(self, moment: datetime | str) -> str:
        """ "4 May 2031, 14:05"."""
        return f"{self.day(moment)}, {self.time(moment)}"


def tell_duration(span: timedelta) -> str:
    """ "5 h 12 min", "40 min", "under a minute"."""
    minutes = round(span.total_seconds() / 60)
    if minutes < 1:
        return "under a minute"
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"
