"""Archives of many runs, handed batch by batch to engines that exist already."""
