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
    parser.add_argument("--from", dest="weights_before")
    parser.add_argument("--keep")
    for name, kind in more:
        parser.add_argument(name, type=kind)
    words = parser.parse_args()
    lateral = words.view == "lateral"
    folders = [f.split("=") for f in words.films]
    shares = np.array([float(share) for _, share in folders])
    sets = [load(folder, lateral) for folder, _ in folders]
    return words, lateral, sets, shares / shares.sum(), {folder: load(folder, lateral) for folder in words.apart}


def written(network, path):
    """Writes the weights, the normalisations taken into the convolutions before them."""
    out = []
    for layer, norm in network.layers():
        weight, bias = layer.weight, layer.bias
        if norm:
            k = norm.weight / torch.sqrt(norm.running_var + norm.eps)
            weight, bias = weight * k[:, None, None, None], (bias - norm.running_mean) * k + norm.bias
        out += [weight, bias]
    torch.cat([w.detach().flatten() for w in out]).numpy().astype("<f2").tofile(path)


def read(network, path):
    """Reads weights as `written` writes them; the normalisations change nothing then."""
    values, at = torch.from_numpy(np.fromfile(path, "<f2").astype(np.float32)), 0
    with torch.no_grad():
        for layer, norm in network.layers():
            for w in (layer.weight, layer.bias):
                w.copy_(values[at:at + w.numel()].reshape(w.shape))
                at += w.numel()
            if norm:
                norm.running_var.fill_(1 - norm.eps)
    if at != len(values):
        raise SystemExit(f"{path} holds {len(values)} weights, the network has {at}")
    return network.eval()


def started(network, path, losses):
    """Reads weights to go on from: normalisations must go on changing nothing while they take their means from each
    batch, so they are given those of some batches to undo."""
    read(network, path)
    norms, met = [norm for _, norm in network.layers() if norm], {}

    def meet(norm, x, _):
        met.setdefault(norm, []).append(torch.stack([x[0].mean((0, 2, 3)), x[0].var((0, 2, 3), unbiased=False)]))

    hooks = [norm.register_forward_hook(meet) for norm in norms]
    with torch.no_grad():
        for _ in range(8):
            losses()
        for norm in norms:
            mean, var = torch.stack(met[norm]).mean(0)
            norm.running_mean.copy_(mean), norm.running_var.copy_(var)
            norm.weight.copy_(torch.sqrt(var + norm.eps)), norm.bias.copy_(mean)
    for hook in hooks:
        hook.remove()
    network.train()


def learned(network, words, rate, losses, shown):
    """Learns until the minutes are over: `losses` gives what is lost of a new batch and what of it is told of. The rate
    falls along half a cosine. Weights are written at the end, and kept every five minutes."""
    if words.start:
        network.load_state_dict(torch.load(words.start))
    if words.weights_before:
        started(network, words.weights_before, losses)
        shown()
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
    written(network, words.weights)
