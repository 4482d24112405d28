"""What is to be sent next: a window of records after the last one that the collector has. Pure, time is passed in."""

WINDOW = 50
"""Records on their way at once; all that the publisher keeps in memory."""
FIRST_WAIT_S, LONGEST_WAIT_S = 10.0, 300.0
"""Without an acknowledgement the window is sent again after this, then after twice as long, up to the latter."""


class Window:
    """Numbers only: `acked` is on the collector's disk, `sent` on its way."""

    def __init__(self, acked: int, limit: int = WINDOW) -> None:
        self.acked = self.sent = acked
        self.limit = limit
        self._in_flight: list[int] = []
        self._wait_s, self._since_s = FIRST_WAIT_S, 0.0

    def room(self) -> int:
        """How many more may be sent now."""
        return self.limit - len(self._in_flight)

    def note_sent(self, seq: int, now_s: float) -> None:
        """A record left."""
        if not self._in_flight:
            self._since_s = now_s
        self._in_flight.append(seq)
        self.sent = seq

    def acknowledged(self, seq: int, now_s: float, *, again: bool) -> bool:
        """The collector has all up to `seq`; whether that is news. With `again`, all after is sent anew."""
        news = seq != self.acked
        if again or seq < self.acked or seq > self.sent:
            self.restart(seq, now_s)
            return news
        self.acked = seq
        self._in_flight = [number for number in self._in_flight if number > seq]
        if news:
            self._wait_s, self._since_s = FIRST_WAIT_S, now_s
        return news

    def restart(self, seq: int, now_s: float) -> None:
        """Begin anew after `seq`: another connection, another collector, a gap."""
        self.acked = self.sent = seq
        self._in_flight = []
        self._wait_s, self._since_s = FIRST_WAIT_S, now_s

    def look(self, now_s: float) -> None:
        """Send the window again where nothing has been heard for too long."""
        if self._in_flight and now_s - self._since_s >= self._wait_s:
            self._wait_s = min(LONGEST_WAIT_S, 2 * self._wait_s)
            self._since_s, self.sent, self._in_flight = now_s, self.acked, []
