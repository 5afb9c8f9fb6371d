"""What the contract's types look like to others: JSON Schemas and lists of codes."""
