"""What changed since an earlier day: terminal, page, plain values."""
