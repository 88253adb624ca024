"""Drawings of the trade as SVG text: wall sections, elevations and bars.

Pure functions from frozen records to text: the same record gives the same bytes. Nothing here
decides anything; coverage and answers arrive already settled.
"""
