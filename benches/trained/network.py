"""The network: each plate's two views, then the plates of a chain together. src/locate/trained.rs computes the same."""
import torch
import torch.nn as nn

SEEN, TOLD, HIDDEN = 48, 7, 96
MANY = 16, 32, 48, 48


def eye(channels, rows, columns):
    layers, before = [], channels
    for many, size, stride in zip(MANY, (5, 3, 3, 3), (2, 2, 2, 1)):
        layers += [nn.Conv2d(before, many, size, stride, size // 2), nn.BatchNorm2d(many), nn.ReLU()]
        before = many
    return nn.Sequential(*layers, nn.Flatten()), nn.Linear(before * (rows // 8) * (columns // 8), SEEN)


class Network(nn.Module):
    def __init__(self):
        super().__init__()
        (self.near, self.near_last), (self.wide, self.wide_last) = eye(2, 96, 64), eye(1, 64, 48)
        told = 2 * SEEN + TOLD
        self.drop = nn.Dropout(0.2)
        self.along = nn.ModuleList(nn.Conv1d(n, HIDDEN, 5, padding=2) for n in (told, HIDDEN, HIDDEN))
        self.out = nn.Conv1d(HIDDEN + told, 8, 1)
        nn.init.zeros_(self.out.weight)
        nn.init.zeros_(self.out.bias)

    def forward(self, near, wide, told, lengths):
        """Of each plate: turn, across, along, width, and the logarithms of their spreads."""
        # Numbers of 16 bits (bfloat16) are learned with nearly twice as fast where the processor has them.
        with torch.autocast("cpu", torch.bfloat16, enabled=self.training):
            near, wide = self.near(near), self.wide(wide)
        every = torch.cat([self.near_last(near.float()), self.wide_last(wide.float()), told], 1)
        out = []
        for chain in torch.split(every, lengths):
            x = self.drop(torch.relu(chain)).T[None]
            h = torch.relu(self.along[0](x))
            for layer in self.along[1:]:
                h = h + torch.relu(layer(h))
            out.append(self.out(torch.cat([h, x], 1))[0].T)
        return torch.cat(out)

    def layers(self):
        """All layers in the order the program reads them, each with its normalisation or none."""
        out = []
        for eye, last in ((self.near, self.near_last), (self.wide, self.wide_last)):
            out += [*zip(list(eye)[0:12:3], list(eye)[1:12:3]), (last, None)]
        return out + [(layer, None) for layer in (*self.along, self.out)]
