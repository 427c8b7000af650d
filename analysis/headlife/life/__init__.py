"""What the records say: evidence, the posterior of a Weibull life, and how fair it is."""
