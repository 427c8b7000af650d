"""Our answers to the published cases of `shared/published`, beside those of other libraries."""
