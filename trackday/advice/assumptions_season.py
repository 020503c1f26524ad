"""What this project assumes about when to look at the weather, and when to be reminded."""

from __future__ import annotations

from datetime import time

LOOKS_AHEAD_DAYS = (14, 7, 6, 5, 4, 3, 2, 1)
"""Days before an event's first day on which a look is due, then on each of its days. Assumption:
from a fortnight on there are odds, within a week each day's are better than the last's."""

LOOK_TIME = time(6, 0)
"""Time of the venue's clock at which a look is due. Assumption: before the paddock wakes."""

DEADLINE_MINUTES = 15
"""How long before a deadline its calendar entry begins and rings, minutes. Assumption: time to look
at the track and make up one's mind."""

SUNSET_ALARM_MINUTES = 30
"""How long before sunset its calendar entry rings, minutes. Assumption: time to find the lamps."""
