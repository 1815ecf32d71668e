"""What standards and the trade fix: data files with a source in every row, and small typed readers."""
