"""Pure calculations: one contract Struct in, one contract Struct out; no HTTP, no global state."""
