"""Events of a calendar between two days, as icalendar and recurring_ical_events read them: "start end" a line.

Only events with hours; UTC, for the tests read in UTC. Prints "unread" with the reason where the file is refused.
"""

import datetime
import sys

import icalendar
import recurring_ical_events

first, last = (datetime.date.fromisoformat(word) for word in sys.argv[1:3])
text = sys.stdin.read()
lines = set()
try:
    for calendar in icalendar.Calendar.from_ical(text, multiple=True):
        for event in recurring_ical_events.of(calendar).between(first, last + datetime.timedelta(days=1)):
            start, end = event.start, event.end
            if not isinstance(start, datetime.datetime):
                continue
            if start.tzinfo is not None:
                start = start.astimezone(datetime.timezone.utc).replace(tzinfo=None)
            if end.tzinfo is not None:
                end = end.astimezone(datetime.timezone.utc).replace(tzinfo=None)
            if start < end:
                lines.add(f"{start.isoformat()} {end.isoformat()}")
except Exception as error:  # Every reason to refuse is a reason not to compare.
    print(f"unread {type(error).__name__}: {error}")
    sys.exit(0)
print("\n".join(sorted(lines)))
