"""The live page: files that the server gives to a browser, nothing else."""
