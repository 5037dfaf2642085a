"""The folders that the system gives the program for each user."""

from __future__ import annotations

import os
import sys
from pathlib import Path

NAME = "backflow-diagnose"


def cache_folder() -> Path:
    """What may be deleted at any time."""
    return _plainly("XDG_CACHE_HOME", ".cache") or _as_the_library_says("user_cache_dir")


def settings_folder() -> Path:
    """What the user has chosen."""
    return _plainly("XDG_CONFIG_HOME", ".config") or _as_the_library_says("user_config_dir")


def _plainly(variable: str, usual: str) -> Path | None:
    """Where the XDG Base Directory Specification has it on Linux; None elsewhere, and where anything is unusual.

    Every command asks, and to import what knows all systems takes longer than to read the compiled rules.
    """
    home, given = os.environ.get("HOME", ""), os.environ.get(variable, "")
    if sys.platform != "linux" or "ANDROID_ROOT" in os.environ or not all(map(os.path.isabs, (home, given or home))):
        return None
    return Path(given or Path(home, usual), NAME)


def _as_the_library_says(kind: str) -> Path:
    import platformdirs  # noqa: PLC0415  seldom needed

    return Path(getattr(platformdirs, kind)(NAME))
