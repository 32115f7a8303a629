"""The settings of this board in flash, and what site and wiring the board belongs to.

Both are kept in two equal copies. Damaged in both copies, of another layout, out of range
or contradicting each other, the settings are bad; of another site or wiring, foreign. Never do
defaults stand in silently: either fault is latched and no press of the button takes it back.
"""

from array import array

from leafwinch.controller import BOOT_SETTINGS_BAD, BOOT_SETTINGS_FOREIGN
from leafwinch.edge.slots import EXTRA, HEAD, ONE_BAD, Slots
from leafwinch.numbers import TYPE_CHECKING, const
from leafwinch.settings import Settings

if TYPE_CHECKING:
    from leafwinch.edge.slots import Files

FORMAT = const(1)  # version of both layouts


def envelopes(settings: Settings) -> "tuple[list[int], list[int], list[int], list[int]]":
    """Return the four lists of the learned envelope in the order in which they are stored."""
    return (
        settings.raise_low_ma,
        settings.raise_high_ma,
        settings.lower_low_ma,
        settings.lower_high_ma,
    )


def installed_words(site_hash: int, netlist_hash: int) -> "array[int]":
    """Return the words of the file that says what the board belongs to."""
    return array("i", [0, 0, 0, site_hash, netlist_hash, 0])


class SettingsStore:
    """Reads and writes settings.a, settings.b, installed.a and installed.b.

    settings: what load() found, or defaults while the settings are bad.
    """

    def __init__(self, files: "Files") -> None:
        self.slots = Slots(files, "settings", "S", FORMAT)
        self.installed = Slots(files, "installed", "I", FORMAT)
        self.settings = Settings()
        self.site_hash = 0  # what the settings are for
        self.netlist_hash = 0
        self.bad = 1  # 1: settings are defaults, which must never be written

    def load(self) -> int:
        """Read both; return 0, BOOT_SETTINGS_BAD or BOOT_SETTINGS_FOREIGN."""
        # Loaded for this only, and dropped when garbage is collected.
        from leafwinch.edge.settings_words import settings_of
        from leafwinch.settings_schema import default_settings

        self.settings = default_settings()
        installed = self.installed.load()
        words = self.slots.load()
        settings = settings_of(words) if words is not None else None
        if words is None or settings is None:
            return BOOT_SETTINGS_BAD
        self.settings = settings
        self.bad = 0
        self.site_hash = words[HEAD]
        self.netlist_hash = words[HEAD + 1]
        if (
            installed is None
            or len(installed) != EXTRA + 2
            or installed[HEAD] != words[HEAD]
            or installed[HEAD + 1] != words[HEAD + 1]
        ):
            return BOOT_SETTINGS_FOREIGN
        return 0

    def words(self, settings: Settings) -> "array[int]":
        """Return the words of new settings for the same site and wiring."""
        from leafwinch.edge.settings_words import settings_words

        return settings_words(settings, self.site_hash, self.netlist_hash)

    def to_mend(self) -> "Slots | None":
        """Return the first pair of which one copy is damaged or older, or None."""
        for slots in (self.slots, self.installed):
            if slots.found == ONE_BAD or (slots.behind and slots.sequence):
                return slots
        return None
