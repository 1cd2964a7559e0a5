"""Every error a caller may meet, sorted by what the caller does next.

::

    SprayoutError
    ├── BadInput        the person corrects what was given and tries again (exit 2, HTTP 4xx)
    │   ├── CalibrationRefused   measure the tile or patch again
    │   └── SettingsError        correct the settings; nothing was started
    ├── LinkError       the cable or the broker: wait and retry
    ├── BoardFault      the board says that a part of it failed: tell the person
    └── StoreError      the record cannot be kept: stop

A message is one line: what, got, wanted, next step.  ``BadInput`` is a ``ValueError`` too, so
that the pure rooms read naturally; a bare ``ValueError`` from them is a fault of ours.
"""


class SprayoutError(Exception):
    """Base of all errors that sprayout raises on purpose."""


class BadInput(SprayoutError, ValueError):  # noqa: N818 - it is the person's input, not our error
    """Something given from outside is wrong; nothing was changed."""


class CalibrationRefused(BadInput):
    """A dark, white tile or patch measurement cannot be used; measure it again."""


class SettingsError(BadInput):
    """A setting is unknown, of the wrong type or out of range."""


class LinkError(SprayoutError):
    """The cable or the broker is not there, or went away; retry."""


class BoardFault(SprayoutError):  # noqa: N818 - the board's own word for it
    """The board reports that one of its parts failed."""


class StoreError(SprayoutError):
    """The store cannot be opened, read or written."""
