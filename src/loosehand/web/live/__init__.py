"""The live side of the stand: sound in from the page, what was heard back to it, takes kept."""
