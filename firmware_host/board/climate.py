"""Measuring the air and the part: whatever answers goes into the pack, nothing else does."""

from registers import PartFault


class ClimateProbe:
    """``parts`` by role: climate, part, airflow."""

    def __init__(self, parts):
        self.parts = parts
        self.busy = False

    def measure(self, roles):
        """SenML records of the roles that answered, and the words of those that did not."""
        while self.busy:  # one conversation at a time with each chip
            yield 1
        self.busy = True
        try:
            return (yield from self._ask(roles))
        finally:
            self.busy = False

    def _ask(self, roles):
        records, missing = [], []
        for role in roles:
            try:
                values = yield from self.parts[role].use(lambda chip: chip.measure())
            except PartFault as failure:
                missing.append(str(failure))
            else:
                records.extend({"n": name, "u": unit, "v": value} for name, unit, value in values)
        return records, missing
