"""What use cases share: what stands of a plan, processes, drawings read, files and their folder."""
