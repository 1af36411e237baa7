"""The simulated switch without any port: a line in this process, on which time passes only while it is waited for.

An hour of settling takes a second. The bytes go through the same line noise, and the other side is the same
loop, as on a real line.
"""

from consolecheck.console.guard import Outgoing
from consolecheck.rehearsal.faults import Schedule
from consolecheck.rehearsal.noise import Line as Noise
from consolecheck.rehearsal.physics import STEP
from consolecheck.rehearsal.serve import Console
from consolecheck.rehearsal.shell import Shell


class InProcess:
    """A link to a shell. `schedule` is what happens to the chassis meanwhile; its seconds are the chassis'."""

    def __init__(self, shell: Shell, noise: Noise | None = None, schedule: Schedule | None = None) -> None:
        self._console = Console(shell, noise or Noise())
        self.chassis = shell.chassis
        self.schedule = schedule
        bits = noise.bits_per_second if noise else None
        self.bits_per_second: int | None = int(bits) if bits else None
        self.error_free = noise is None or not (noise.flip or noise.drop)
        self.note = ""
        self._typed = b""

    def write(self, outgoing: Outgoing) -> None:
        self._typed += outgoing.data

    def read(self, timeout: float) -> bytes:
        """What has arrived; where nothing has, so much simulated time passes, and then what arrived meanwhile."""
        typed, self._typed = self._typed, b""
        data = self._console.exchange(typed)
        if not data:
            self.advance(timeout)
            data = self._console.exchange(b"")
        return data

    def advance(self, seconds: float) -> None:
        """Lets time pass, with what is due in it: a deed comes at most a step late, however long the wait."""
        while seconds > 0:
            step = min(seconds, STEP)
            self.chassis.advance(step)
            if self.schedule is not None:
                self.schedule.run_due(self.chassis)
            seconds -= step

    def set_speed(self, bits_per_second: int) -> None:
        self.bits_per_second = bits_per_second

    def close(self) -> None:
        """Nothing to give back."""


class SimulatedClock:
    """The chassis' own seconds as the laptop's clock."""

    def __init__(self, line: InProcess) -> None:
        self._line = line

    def seconds(self) -> float:
        """Seconds of a clock that only goes forward."""
        return self._line.chassis.seconds

    def epoch(self) -> float:
        """Seconds since 1970: the device's clock and the laptop's agree here."""
        return self._line.chassis.clock.timestamp()

    def wait(self, seconds: float) -> None:
        self._line.advance(seconds)
