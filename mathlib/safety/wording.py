"""Sentences that must stand beside every limit, distance and class, written in one place."""

from __future__ import annotations

from typing import Final

#: Stands beside every number of this room.
PREVAIL: Final = (
    "Local codes and law prevail over this page, and so does a laser safety officer or another "
    "qualified person: ask one before the first beam."
)

#: Stands beside every limit of exposure.
TABLE_TO_CHECK: Final = (
    "The table of limits was typed from memory of IEC 60825-1:2014, ICNIRP 2013 and Directive "
    "2006/25/EC: have it checked against a licensed copy of the standard before anyone relies on "
    "it."
)

#: Stands before the names of cells and factors without an independent check.
UNCONFIRMED: Final = (
    "Neither a printed value, nor a neighbouring cell, nor an emission limit confirms these "
    "numbers, which rest on one memory alone:"
)

#: Stands beside every class.
CLASSING: Final = (
    "Classing a laser product is the work of a qualified person with the licensed standard and "
    "calibrated instruments: it counts what people can reach in operation, in service and after "
    "any one fault that can be foreseen. The class that is named here is that of a bare head of "
    "this power, to show what an enclosure has to achieve."
)

#: For those who pass a machine on.
MANUFACTURER: Final = (
    "Whoever sells, lends or gives away a laser machine or a kit for one, even a copy of a "
    "published design, may become its manufacturer in the eyes of the law, and then answers for "
    "its class, its labels, its interlocks, its instructions and the papers that prove them. In "
    "some countries that holds as soon as others use the machine in a shared workshop. Ask a "
    "qualified person and the authority of your country before a kit leaves your hands; a "
    "drawing of a machine and a machine are not the same thing there."
)

#: Stands beside a limit of 0.25 s.
BLINK: Final = (
    "Nobody should count on blinking: at most one person in five blinks in time, and nobody "
    "blinks at light that is not seen. Take 10 s for an accident, and 100 s and longer for "
    "watching the work."
)

#: Stands beside a limit of the second row at 1200 to 1400 nm.
SMALL_BEAM: Final = (
    "From 1200 to 1400 nm the limit of the cornea holds over an aperture as from 1400 nm, which "
    "is smaller than the 7 mm of the retina's limit."
)

#: Stands beside what materials give off, concentrations, flows of air and waiting times.
SMOKE: Final = (
    "Local codes and your national list of limits prevail over this page, and so does a qualified "
    "person for occupational hygiene: ask one before the first cut."
)
