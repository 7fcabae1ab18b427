"""What both trainings are given, and the steps they take."""
import argparse
import time
import numpy as np
import torch


def given(load, *more):
    """The words of the command, the films of each folder of --films with the folders' shares, and of each of --apart."""
    parser = argparse.ArgumentParser()
    parser.add_argument("view", choices=["pa", "lateral"])
    parser.add_argument("minutes", type=float)
    parser.add_argument("weights")
    parser.add_argument("--films", nargs="+", required=True)
    parser.add_argument("--apart", nargs="*", default=[])
    parser.add_argument("--start")
    parser.add_argument("--keep")
    for name, kind in more:
        parser.add_argument(name, type=kind)
    words = parser.parse_args()
    lateral = words.view == "lateral"
    folders = [f.split("=") for f in words.films]
    shares = np.array([float(share) for _, share in folders])
    sets = [load(folder, lateral) for folder, _ in folders]
    return words, lateral, sets, shares / shares.sum(), {folder: load(folder, lateral) for folder in words.apart}


def learned(network, words, rate, losses, shown):
    """Learns until the minutes are over: `losses` gives what is lost of a new batch and what of it is told of. The rate
    falls along half a cosine. Weights are written at the end, and kept every five minutes."""
    if words.start:
        network.load_state_dict(torch.load(words.start))
    network.to(memory_format=torch.channels_last)
    optimiser = torch.optim.AdamW(network.parameters(), rate, weight_decay=1e-3)
    start, total, told, step, past = time.time(), 60 * words.minutes, 0.0, 0, []

    def keep():
        if words.keep:
            torch.save(network.state_dict(), words.keep)

    while (gone := time.time() - start) < total:
        for group in optimiser.param_groups:
            group["lr"] = rate * min(1, (step + 1) / 100) / 2 * (1 + np.cos(np.pi * gone / total)) + 1e-5
        lost, of_it = losses()
        past.append(of_it)
        optimiser.zero_grad()
        lost.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 5.0)
        optimiser.step()
        step += 1
        if gone - told > 300:
            told = gone
            print(f"{gone:.0f} s, step {step}, loss {np.mean(past[-300:], 0).round(3)}", flush=True)
            if int(gone / 300) % 3 == 0:
                shown()
            keep()
    shown()
    keep()
    network.weights().astype("<f2").tofile(words.weights)
