"""What was checked, as a table, and whether all of it held."""


class Report:
    def __init__(self):
        self.rows = []
        self.failed = 0
        self.passed = 0
        self.skipped = 0

    def hold(self, what, where, holds, detail=""):
        """A statement that must be true."""
        self.passed += bool(holds)
        self.failed += not holds
        self.rows.append(("ok" if holds else "FAILED", what, where, detail))
        return bool(holds)

    def limit(self, what, where, value, limit, unit, reason=""):
        """A number that must not be above its limit."""
        detail = f"{value:.4g} {unit}, limit {limit:.4g}" + (f"; {reason}" if reason else "")
        return self.hold(what, where, value <= limit, detail)

    def note(self, what, where, detail):
        """A number worth reading that decides nothing."""
        self.rows.append(("", what, where, detail))

    def skip(self, what, where, detail):
        """A check that could not be made, with the reason."""
        self.skipped += 1
        self.rows.append(("skipped", what, where, detail))

    def print(self):
        widths = [max(len(row[column]) for row in self.rows) for column in range(3)] if self.rows else [0] * 3
        for verdict, what, where, detail in self.rows:
            print(f"{verdict:<{widths[0]}}  {what:<{widths[1]}}  {where:<{widths[2]}}  {detail}".rstrip())
        closing = f"{self.passed} passed, {self.failed} failed"
        print(closing + (f", {self.skipped} skipped" if self.skipped else ""))
