"""The folders that the system gives the program for each user."""

from __future__ import annotations

from pathlib import Path

import platformdirs

NAME = "backflow-diagnose"


def cache_folder() -> Path:
    """What may be deleted at any time."""
    return Path(platformdirs.user_cache_dir(NAME))


def settings_folder() -> Path:
    """What the user has chosen."""
    return Path(platformdirs.user_config_dir(NAME))
