"""Counts of a low-cost sensor -> reflectance -> CIE Lab, with an uncertainty that is true.

House rules of this room: everything is a value in, a value out (no clock, file, socket or log;
the shipped tables are read once, in ``tables``).  Reflectance is 0..1, wavelengths are nm,
XYZ is scaled so that the perfect diffuser has Y = 100, and a Lab always says whose it is:
``"d65-10"`` (D65, 10 degrees) or ``"d50-2"`` (D50, 2 degrees).  Differences are CIEDE2000.
"""
