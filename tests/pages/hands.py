"""A hand at a tablet: what it touches and types in a real browser, and how long that takes.

The times are those of the keystroke-level model, as remembered and not looked up: a key of an average typist, pointing
at something and touching it, and the thought before each step. Waiting for the service is not counted.
"""

from dataclasses import dataclass, field
from typing import Any

A_KEY, A_TOUCH, A_THOUGHT = 0.28, 1.1, 1.35  # seconds; no source: values from memory


@dataclass
class Hand:
    """Somebody at a tablet: every act is carried out in the browser and counted."""

    page: Any
    seconds: float = 0.0
    touches: int = 0
    keys: int = 0
    done: list[str] = field(default_factory=list)

    def touch(self, what: Any) -> None:
        """Think, find the thing, touch it."""
        what.click()
        self.touches += 1
        self._took(A_THOUGHT + A_TOUCH, "touch")

    def write(self, name: str, text: str) -> None:
        """Think, touch a field that is empty, press every key."""
        box = self.page.locator(f"[name={name}]")
        assert box.input_value() == "", f"{name} is filled in already"
        box.click(position={"x": 18, "y": 18})  # where the first part of a date stands, whatever the font
        box.press_sequentially(text)
        self.touches += 1
        self.keys += len(text)
        self._took(A_THOUGHT + A_TOUCH + A_KEY * len(text), f"{name} = {text}")

    def choose(self, name: str, text: str) -> None:
        """Think, open a list, touch one of it."""
        self.page.locator(f"[name={name}]").select_option(text)
        self.touches += 2
        self._took(A_THOUGHT + 2 * A_TOUCH, f"{name}: {text}")

    def on(self, words: str) -> Any:
        """Return the button or link of these words."""
        return self.page.locator(f"main :is(a, button):has-text('{words}')").first

    def _took(self, seconds: float, what: str) -> None:
        self.seconds += seconds
        self.done.append(f"{seconds:5.2f} s  {what}")

    def told(self) -> str:
        """Say what it took, act by act."""
        head = f"{self.seconds:.1f} s, {self.touches} touches, {self.keys} keys"
        return "\n".join([head, *self.done])
