"""What the page shows, one module a panel."""
