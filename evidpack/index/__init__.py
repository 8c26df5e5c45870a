"""The disclosure index of a sealed day and the one-page verification report, as PDFs."""
