"""Logs as files: wordings, codes, dates, tables, as different as a region's panels are."""
