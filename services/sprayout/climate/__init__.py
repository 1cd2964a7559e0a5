"""Booth air and wet film: moist air, blush, drying, probe checks, forecast and flags.

Pure: values in, values out; no clock, file, socket or log.  Only :mod:`~sprayout.climate.solvents`
and :mod:`~sprayout.climate.salts` read the tables shipped in ``data/``, once.
"""
