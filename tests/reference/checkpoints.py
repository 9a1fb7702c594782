"""A checkpoint in memory."""


class Shelves(dict):
    """Stores the blocks of every batch, by its name."""

    def __init__(self):
        super().__init__()
        self.written = 0

    def stored(self, batch):
        shelf = self.setdefault(batch.name, {})
        return [shelf.get(block) for block in range(len(batch.blocks))]

    def write(self, batch, block, metrics):
        self.written += 1
        self[batch.name][block] = metrics
