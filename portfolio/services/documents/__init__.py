"""Documents kept by content: adding, listing, finding what lacks one, and checking the files."""
