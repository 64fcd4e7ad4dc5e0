"""The exceptions that mathlib raises; each is also the built-in one that a caller expects.

MathlibError
├── UnitError           (ValueError)  a value without its unit, or with one of another kind
├── ValueRefused        (ValueError)  a value outside its domain, or a result that is not finite
│   └── Unanswerable                  a question about something that the machine file lacks
├── WordError           (TypeError)   a call with an unknown or absent word, or by position
├── TextRefused         (ValueError)  text that is not one number with one unit
├── NotUnique           (LookupError) several answers, or none, where one is needed
├── FormulaError        (ValueError)  a formula that cannot be defined as written
├── TableError          (ValueError)  a table of data that cannot be read
└── MachineFileError    (ValueError)  a machine file with mistakes, all of them listed
"""


class MathlibError(Exception):
    """Any mistake that mathlib explains."""


class UnitError(MathlibError, ValueError):
    """A value came without its unit, or with a unit of another kind."""


class ValueRefused(MathlibError, ValueError):
    """A value lies outside the domain of its quantity, or a result is not finite."""


class Unanswerable(ValueRefused):
    """A question cannot be answered from what the machine file states."""


class WordError(MathlibError, TypeError):
    """A call names a word that does not exist, leaves one out, or uses positions."""


class TextRefused(MathlibError, ValueError):
    """A text is not one number with one unit."""


class NotUnique(MathlibError, LookupError):
    """Several answers fit, or none does."""


class FormulaError(MathlibError, ValueError):
    """A formula cannot be defined as it is written."""


class TableError(MathlibError, ValueError):
    """A table of data cannot be read as it stands."""


class MachineFileError(MathlibError, ValueError):
    """A machine file has mistakes; the message lists all of them."""
