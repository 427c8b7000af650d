"""Does headlife hold what it says? Simulated shops and records; commands anyone can run."""
