"""One guard a file, grouped by what they watch. A guard reads raw evidence and the ledger, never the estimate."""
