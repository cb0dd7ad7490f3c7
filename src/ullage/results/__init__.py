"""From the march's trace to a labelled Dataset, its audit, its summary and its file."""
