"""The page: one self-contained HTML file that shows a judged swap to somebody who was not there."""

from consolecheck.reporting.page.whole import page

__all__ = ["page"]
