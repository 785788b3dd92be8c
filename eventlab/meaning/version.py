"""The version of the reader: what it takes to read the same bytes the same way again."""

from eventlab.meaning.lexicon import data_version

READER = f"2.{data_version()}"
"""Changes with the code of the reader (by hand) and with its tables (by their content)."""
