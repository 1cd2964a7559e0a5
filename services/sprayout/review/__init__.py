"""What lay behind a finish: findings, causes, evidence from the owner's own record, reports.

The core is pure (values in, values out); ``history`` alone reads the journal.
"""
