"""Trains the last look for one view, shows what it does to films kept apart, and writes its weights.

python train.py pa|lateral MINUTES WEIGHTS --films FOLDER=SHARE… --agree FOLDER --apart FOLDER…

A batch's chains are of the folders by their shares, a quarter of them cut short, half of them seen as the network has
corrected them once, for the program looks twice; two are of one film of `--agree`, from
two starts: of these only the difference of what is left counts. What was seen of a chain is used three times, in
different batches: looking takes as long as learning. `--keep` writes the network (not the optimiser) to go on from, which
`--start` reads; `--from` goes on from weights as they stand in the repository, `--rate` sets the rate at the start.
"""
import numpy as np
import torch
from given import given, learned
from network import Network
from plates import corrected, load, put_off, seen

BATCH, RATE = 8, 2e-3
POOL, USES = 96, 3
# Share of the chains that are seen as the network has corrected them once: it looks twice.
SECOND = 0.5
# What turn, place across, place along and width are measured in, and how much they count.
UNIT, COUNTS = torch.tensor([1.0, 0.4, 1.0, 1.0]), torch.tensor([1.0, 1.0, 0.3, 0.3])


def loss(found, answer):
    """Of heavy tails: a plate that cannot be told must not decide."""
    spread = found[:, 4:].clamp(-3, 3)
    z = (found[:, :4] - answer) / UNIT / torch.exp(spread)
    return (COUNTS * (2.5 * torch.log1p(z * z / 4) + spread)).mean()


def cut(chain, rng):
    """A quarter of the chains cut short: readers do not mark everything."""
    n = len(chain["upper"])
    if rng.random() < 0.75 or n < 4:
        return chain
    many = int(rng.integers(3, n))
    start = int(rng.integers(0, n - many + 1))
    return {name: v[start:start + many] for name, v in chain.items()}


def apart_of(found, answer, sides):
    """How far two starts of one film end from each other; what the marks are off by is in both and drops out."""
    left = [(f[:, :4] - a) * torch.tensor([s, 1.0, s, 1.0]) for f, a, s in zip(found, answer, sides)]
    z = (left[0] - left[1]) / 1.414 / UNIT
    return (COUNTS * 2.5 * torch.log1p(z * z / 4)).mean()


class Pool:
    """What was seen of some chains (or pairs of chains), drawn at random and renewed after USES draws on average."""

    def __init__(self, make, size, rng):
        self.make, self.rng = make, rng
        self.seen = [make() for _ in range(size)]

    def draw(self):
        i = self.rng.integers(len(self.seen))
        out = self.seen[i]
        if self.rng.random() < 1 / USES:
            self.seen[i] = self.make()
        return out


def look(network, film, chain, rng, training):
    """What is seen of a chain, and the chain as the network corrects it."""
    of_it = seen(film, chain, rng, training)
    learning = network.training
    network.eval()
    with torch.no_grad():
        found = network(*of_it[:3], [len(of_it[0])])
    network.train(learning)
    return of_it, corrected(chain, found.double().numpy(), of_it[4])


def shown(network, apart, rng):
    """Tilt (degrees) and place across (mm), RMS, before, after one look and after two, by folder and kind; one start of
    each film."""
    for folder, films in apart.items():
        groups = {}
        for film in films:
            chain, errors = film.chains[0], []
            for _ in range(3):
                of_it, chain = look(network, film, chain, rng, False)
                errors.append(of_it[3][:, :2].numpy())
            groups.setdefault(film.kind, []).append(np.stack(errors))
        for kind, parts in groups.items():
            rms = np.sqrt((np.concatenate(parts, 1) ** 2).mean(1))
            told = [" -> ".join(f"{v:.2f}" for v in rms[:, k]) for k in range(2)]
            print(f"  {folder} {kind}: tilt {told[0]}, across {told[1]}", flush=True)


def main():
    words, lateral, sets, shares, apart = given(load, ("--agree", str), ("--rate", float))
    agree = load(words.agree, lateral) if words.agree else []
    rng = np.random.default_rng(0)
    torch.manual_seed(0)
    torch.set_num_threads(1)
    network = Network()

    def known():
        own = sets[rng.choice(len(sets), p=shares)]
        film = own[rng.integers(len(own))]
        chain = put_off(cut(film.chains[rng.integers(len(film.chains))], rng), rng)
        # The film is distorted alike for both looks.
        same = rng.integers(2**32)
        if rng.random() < SECOND:
            chain = look(network, film, chain, np.random.default_rng(same), True)[1]
        return [seen(film, chain, np.random.default_rng(same), True)]

    def pair():
        film = agree[rng.integers(len(agree))]
        return [seen(film, put_off(film.chains[k], rng), rng, True) for k in rng.choice(len(film.chains), 2, replace=False)]

    single, pairs = Pool(known, POOL, rng), Pool(pair, POOL // 6 if agree else 0, rng)

    def losses():
        batch = [b for _ in range(BATCH - 2) for b in single.draw()] + (pairs.draw() if agree else [])
        near, wide, what, answer = [torch.cat(parts) for parts in zip(*[b[:4] for b in batch])]
        lengths = [len(b[0]) for b in batch]
        found = network(near.to(memory_format=torch.channels_last), wide, what, lengths)
        first = sum(lengths[:BATCH - 2])
        lost = loss(found[:first], answer[:first])
        of_it = lost.item()
        if agree:
            two = [torch.split(v, lengths)[-2:] for v in (found, answer)]
            lost = lost + 0.3 * apart_of(*two, [b[4] for b in batch[-2:]])
        return lost, of_it

    learned(network, words, words.rate or RATE, losses, lambda: shown(network, apart, rng))


main()
