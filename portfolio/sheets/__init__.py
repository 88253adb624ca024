"""Spreadsheets in and out: the workbook's layout, reading, converting, templates and exports."""
