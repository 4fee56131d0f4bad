"""The design file: quantities, schema, loading."""
