"""Exceptions, one for each kind of mistake that a user can make."""


class LeakloreError(Exception):
    """Base of all our errors; its text is meant for the user."""


class LibraryNotFound(LeakloreError):
    """The folder given holds no case library."""


class LibraryBroken(LeakloreError):
    """A record, the register or the guide has errors; they have been told."""


class QuantityError(LeakloreError):
    """A quantity can't be read. `instead` says what to write."""

    def __init__(self, message: str, instead: str = "") -> None:
        super().__init__(message)
        self.instead = instead
