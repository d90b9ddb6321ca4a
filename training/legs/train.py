"""Trains the leg network from drawn lessons and writes it as ONNX.

    python3 train.py --data DIR --out legs.onnx --minutes 25

The lessons come from `go run ./training/legs/draw`; shards that appear while
this runs are taken in. Needs PyTorch with a GPU, and onnx for the export.

Input of the network, `picture`: 1×5×S×S float32, red, green, blue in 0..1,
then for the near and the far leg a map with a soft dot at each first guess of
hip, knee, ankle, heel and toe (the largest of exp(-d²/2σ²), σ = 6 pixels);
zeros where there is no guess. The runner faces right.
Output, `points`: 1×12×3, near then far leg, hip, knee, ankle, heel, ball,
toe: x and y in pixels of the input, and the scale b of a Laplace
distribution of either error, in pixels.
"""

import argparse
import glob
import math
import os
import time

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

SIGMA = 6.0
GUESSED = [0, 1, 2, 3, 5]  # the points of which there is a first guess


def conv(i, o, k=3, s=1, groups=1, act=True):
    layers = [nn.Conv2d(i, o, k, s, k // 2, groups=groups, bias=False), nn.BatchNorm2d(o)]
    if act:
        layers.append(nn.ReLU(inplace=True))
    return nn.Sequential(*layers)


class Block(nn.Module):
    """Inverted residual: widen, look around, narrow."""

    def __init__(self, i, o, wide, s=1, k=3):
        super().__init__()
        self.same = s == 1 and i == o
        self.f = nn.Sequential(conv(i, i * wide, 1), conv(i * wide, i * wide, k, s, i * wide), conv(i * wide, o, 1, act=False))

    def forward(self, x):
        y = self.f(x)
        return x + y if self.same else y


def chain(i, o, wide, n, s, k=3):
    return nn.Sequential(Block(i, o, wide, s, k), *[Block(o, o, wide, 1, k) for _ in range(n - 1)])


class Legs(nn.Module):
    def __init__(self, size=224):
        super().__init__()
        self.size = size
        self.stem = nn.Sequential(conv(5, 24, 3, 2), conv(24, 32, 3, 2))
        self.s4 = chain(32, 32, 3, 2, 1)
        self.s8 = chain(32, 56, 4, 3, 2)
        self.s16 = chain(56, 88, 4, 3, 2, 5)
        self.s32 = chain(88, 120, 4, 2, 2, 5)
        self.up16, self.m16 = conv(120, 88, 1), Block(88, 88, 3)
        self.up8, self.m8 = conv(88, 56, 1), Block(56, 56, 3)
        self.up4, self.m4 = conv(56, 40, 1), nn.Sequential(Block(40, 40, 3), Block(40, 40, 3))
        self.lift4 = conv(32, 40, 1)
        self.heat = nn.Conv2d(40, 12, 1)
        self.doubt = nn.Conv2d(40, 12, 1)
        n = size // 4
        c = (torch.arange(n).float() + 0.5) * 4
        self.register_buffer("gx", c.repeat(n), persistent=False)
        self.register_buffer("gy", c.repeat_interleave(n), persistent=False)

    def forward(self, x):
        a4 = self.s4(self.stem(x))
        a8 = self.s8(a4)
        a16 = self.s16(a8)
        a32 = self.s32(a16)
        up = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        y = self.m16(up(self.up16(a32)) + a16)
        y = self.m8(up(self.up8(y)) + a8)
        y = self.m4(up(self.up4(y)) + self.lift4(a4))
        h = torch.softmax(self.heat(y).flatten(2).float(), 2)
        d = (self.doubt(y).flatten(2).float() * h).sum(2)
        px, py = (h * self.gx).sum(2), (h * self.gy).sum(2)
        b = torch.exp(torch.clamp(d, -2.5, 4))
        return torch.stack([px, py, b], 2), h


def guesses(at, scale):
    """First guesses as the whole-body networks make them: off by centimetres."""
    n = at.shape[0]
    dev = at.device
    g = at[:, :, GUESSED].clone()
    m = scale.view(n, 1, 1, 1)
    g += torch.randn(n, 1, 1, 2, device=dev) * 0.015 * m
    g += torch.randn(n, 2, 5, 2, device=dev) * 0.03 * m
    wild = (torch.rand(n, 2, 5, 1, device=dev) < 0.06).float()
    g += wild * torch.randn(n, 2, 5, 2, device=dev) * 0.08 * m
    # Now and then the far leg's knee or foot is put on the near leg's.
    swap = (torch.rand(n, 1, 1, device=dev) < 0.03).float() * (torch.rand(n, 5, 1, device=dev) < 0.5)
    g[:, 1] = g[:, 1] * (1 - swap) + g[:, 0] * swap
    seen = (torch.rand(n, 2, 1, device=dev) > 0.03) & (torch.rand(n, 2, 5, device=dev) > 0.03)
    return g, seen.float()


def dots(g, seen, size):
    c = torch.arange(size, device=g.device).float() + 0.5
    ex = torch.exp(-((g[..., 0:1] - c) ** 2) / (2 * SIGMA**2))  # n,2,5,S
    ey = torch.exp(-((g[..., 1:2] - c) ** 2) / (2 * SIGMA**2))
    ey = ey * seen[..., None]
    out = torch.zeros(g.shape[0], 2, size, size, device=g.device)
    for k in range(g.shape[2]):
        out = torch.maximum(out, ey[:, :, k, :, None] * ex[:, :, k, None, :])
    return out


def vary(pix, at, scale):
    """Turns, zooms, shifts, recolours and smears a batch on the GPU."""
    n, _, size, _ = pix.shape
    dev = pix.device
    r = lambda lo, hi, *s: torch.rand(n, *s, device=dev) * (hi - lo) + lo
    turn = r(-0.09, 0.09)
    zoom = torch.exp(r(-0.10, 0.10))
    sx, sy = r(-0.04, 0.04) * size, r(-0.04, 0.04) * size
    cos, sin = torch.cos(turn), torch.sin(turn)
    # out = zoom·R·(in − c) + c + s; the grid needs the way back.
    c = size / 2
    x = at[..., 0] - c
    y = at[..., 1] - c
    k = lambda t: t.view(n, 1, 1)
    ax = k(zoom) * (k(cos) * x - k(sin) * y) + c + k(sx)
    ay = k(zoom) * (k(sin) * x + k(cos) * y) + c + k(sy)
    at = torch.stack([ax, ay], -1)
    inv = torch.zeros(n, 2, 3, device=dev)
    inv[:, 0, 0], inv[:, 0, 1] = cos / zoom, sin / zoom
    inv[:, 1, 0], inv[:, 1, 1] = -sin / zoom, cos / zoom
    s = torch.stack([sx, sy], 1) / (size / 2)
    inv[:, :, 2] = -(inv[:, :, :2] @ s[:, :, None])[:, :, 0]
    grid = F.affine_grid(inv, pix.shape, align_corners=False)
    pix = F.grid_sample(pix, grid, align_corners=False, padding_mode="zeros")
    # Colour: gain, gamma, tint, mixing of the channels, sometimes grey.
    mix = torch.eye(3, device=dev).expand(n, 3, 3) + 0.25 * torch.randn(n, 3, 3, device=dev) * (r(0, 1, 1, 1) < 0.6)
    perm = torch.argsort(torch.rand(n, 3, device=dev), 1)
    hard = (torch.rand(n, 1, 1, device=dev) < 0.3).float()
    mix = mix * (1 - hard) + F.one_hot(perm, 3).float() * hard
    pix = torch.einsum("nij,njhw->nihw", mix, pix).clamp(0, 1)
    pix = pix ** torch.exp(r(-0.4, 0.4, 1, 1, 1))
    pix = (pix - 0.5) * r(0.7, 1.3, 1, 1, 1) + 0.5 + r(-0.15, 0.15, 1, 1, 1)
    # Blur half of the batch by one of a few widths.
    for lo, w in ((0, 0.6), (n // 6, 1.0), (n // 3, 1.6)):
        t = torch.arange(-4, 5, device=dev).float()
        q = torch.exp(-(t**2) / (2 * w * w))
        q = (q / q.sum()).view(1, 1, 1, 9).expand(3, 1, 1, 9)
        part = pix[lo : lo + n // 6]
        part = F.conv2d(F.pad(part, (4, 4, 0, 0), mode="replicate"), q, groups=3)
        pix[lo : lo + n // 6] = F.conv2d(F.pad(part, (0, 0, 4, 4), mode="replicate"), q.transpose(2, 3), groups=3)
    pix = pix + torch.randn_like(pix) * r(0, 0.03, 1, 1, 1)
    # A patch of something in the way.
    hide = torch.rand(n, device=dev) < 0.12
    u = torch.arange(size, device=dev).float()
    px, py, w, h = r(0, size, 1), r(0, size, 1), r(4, 30, 1), r(4, 30, 1)
    box = ((u - px).abs() < w)[:, None, None, :] & ((u - py).abs() < h)[:, None, :, None] & hide.view(n, 1, 1, 1)
    pix = torch.where(box, r(0, 1, 3, 1, 1).expand_as(pix), pix)
    return pix.clamp(0, 1), at, scale * zoom


BONES = [(0, 1), (1, 2), (2, 3), (3, 5), (2, 5)]


def loss_of(out, heat, at, size):
    p, b = out[..., :2].view(-1, 2, 6, 2), out[..., 2].view(-1, 2, 6)
    e = (p - at).abs().sum(-1)
    inside = ((at > -2) & (at < size + 2)).all(-1).float()
    nll = (e / b + 2 * torch.log(b)) * inside
    plain = (e / 3).clamp(max=8) * inside
    bones = 0
    for i, j in BONES:
        d = (p[:, :, j] - p[:, :, i] - at[:, :, j] + at[:, :, i]).abs().sum(-1)
        bones = bones + (d / 3).clamp(max=8) * inside[:, :, i] * inside[:, :, j]
    # The heat should gather around the point, not only balance about it.
    n = size // 4
    c = (torch.arange(n, device=at.device).float() + 0.5) * 4
    h = heat.view(-1, 2, 6, n, n)
    dx = (c - at[..., 0:1]) ** 2
    dy = (c - at[..., 1:2]) ** 2
    spread = (h.sum(3) * dx).sum(-1) + (h.sum(4) * dy).sum(-1)
    return (nll + plain).mean() + 0.4 * bones.mean() + 0.01 * (spread.clamp(max=2500) * inside).mean().sqrt()


def report(model, pix, at, scale, size):
    model.eval()
    errs, angles = [], []
    torch.manual_seed(1)
    with torch.no_grad():
        for i in range(0, len(pix), 250):
            x, a, s = pix[i : i + 250].permute(0, 3, 1, 2).float() / 255, at[i : i + 250], scale[i : i + 250]
            g, seen = guesses(a, s)
            out, _ = model(torch.cat([x, dots(g, seen, size)], 1))
            p = out[..., :2].view(-1, 2, 6, 2)
            errs.append(((p - a) / s.view(-1, 1, 1, 1) * 1000))
            ang = lambda q, i, j: torch.atan2(q[:, :, j, 1] - q[:, :, i, 1], q[:, :, j, 0] - q[:, :, i, 0])
            wrap = lambda t: torch.rad2deg(torch.atan2(torch.sin(t), torch.cos(t)))
            foot = wrap(ang(p, 3, 5) - ang(a, 3, 5))
            knee = wrap(ang(p, 0, 1) - ang(p, 1, 2) - ang(a, 0, 1) + ang(a, 1, 2))
            angles.append(torch.stack([foot, knee], -1))
    e, a = torch.cat(errs), torch.cat(angles)
    names = ["hip", "knee", "ankle", "heel", "ball", "toe"]
    for leg in (0, 1):
        print("   ", ["near", "far"][leg], " ".join("%s %.1f/%.1f" % (names[k], e[:, leg, k].abs().median(), e[:, leg, k].norm(dim=-1).quantile(0.95)) for k in range(6)),
              "mm; foot %.2f knee %.2f deg (median |.|)" % (a[:, leg, 0].abs().median(), a[:, leg, 1].abs().median()), flush=True)
    model.train()


def export(model, path, size):
    import onnx
    from onnx import numpy_helper, helper, TensorProto

    class Plain(nn.Module):
        def __init__(self, m):
            super().__init__()
            self.m = m

        def forward(self, x):
            return self.m(x)[0]

    plain = Plain(model).eval().cpu().float()
    raw = path + ".fp32"
    torch.onnx.export(plain, torch.zeros(1, 5, size, size), raw, input_names=["picture"], output_names=["points"], opset_version=17, dynamo=False)
    m = onnx.load(raw)
    os.remove(raw)
    # Weights are kept as 16-bit numbers and widened when the network is opened.
    casts, kept = [], []
    for w in m.graph.initializer:
        a = numpy_helper.to_array(w)
        if a.dtype == np.float32 and a.size > 64:
            kept.append(numpy_helper.from_array(a.astype(np.float16), w.name + ".half"))
            casts.append(helper.make_node("Cast", [w.name + ".half"], [w.name], to=TensorProto.FLOAT))
        else:
            kept.append(w)
    del m.graph.initializer[:]
    m.graph.initializer.extend(kept)
    nodes = list(m.graph.node)
    del m.graph.node[:]
    m.graph.node.extend(casts + nodes)
    m.doc_string = ""
    for node in m.graph.node:
        node.doc_string = ""
        del node.metadata_props[:]
    onnx.checker.check_model(m)
    onnx.save(m, path)
    print("wrote", path, os.path.getsize(path), "bytes", flush=True)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--data", required=True)
    ap.add_argument("--out", required=True)
    ap.add_argument("--minutes", type=float, default=25)
    ap.add_argument("--size", type=int, default=224)
    ap.add_argument("--batch", type=int, default=384)
    ap.add_argument("--rate", type=float, default=2.5e-3)
    ap.add_argument("--start", help="weights to go on from")
    ap.add_argument("--most", type=int, default=300_000)
    o = ap.parse_args()
    dev, size = "cuda", o.size
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    pix = torch.empty(o.most, size, size, 3, dtype=torch.uint8, device=dev)
    lab = torch.empty(o.most, 25, device=dev)
    have, taken, hold = 0, set(), None

    def load(limit=4):
        nonlocal have, hold
        for f in sorted(glob.glob(os.path.join(o.data, "*.pix"))):
            if f in taken or limit == 0:
                continue
            limit -= 1
            taken.add(f)
            a = torch.from_numpy(np.fromfile(f, np.uint8).reshape(-1, size, size, 3))
            b = torch.from_numpy(np.fromfile(f[:-4] + ".at", np.float32).reshape(-1, 25))
            if hold is None:
                hold = (a.to(dev), b.to(dev))
                os.remove(f)
                continue
            n = min(len(a), o.most - have)
            if n > 0:
                pix[have : have + n] = a[:n].to(dev)
                lab[have : have + n] = b[:n].to(dev)
                have += n
            os.remove(f)

    began = time.time()
    model = Legs(size).to(dev, memory_format=torch.channels_last)
    print("parameters:", sum(p.numel() for p in model.parameters()), flush=True)
    if o.start:
        model.load_state_dict(torch.load(o.start, map_location=dev))
    slow = Legs(size).to(dev)
    slow.load_state_dict(model.state_dict())
    opt = torch.optim.AdamW(model.parameters(), lr=o.rate, weight_decay=1e-2, betas=(0.9, 0.98))
    while have < 4 * o.batch:
        load()
        time.sleep(0.2)
    print("first lessons after %.0f s" % (time.time() - began), flush=True)
    start, step, spoke = time.time(), 0, 0
    while True:
        gone = (time.time() - start) / (60 * o.minutes)
        if gone >= 1:
            break
        warm = min(1, (step + 1) / 300)
        for g in opt.param_groups:
            g["lr"] = o.rate * warm * (0.5 + 0.5 * math.cos(math.pi * gone)) + 1e-6
        pick = torch.randint(0, have, (o.batch,), device=dev)
        x = pix[pick].permute(0, 3, 1, 2).float() / 255
        at, scale = lab[pick, :24].view(-1, 2, 6, 2), lab[pick, 24]
        with torch.no_grad():
            x, at, scale = vary(x, at, scale)
            g, seen = guesses(at, scale)
            x = torch.cat([x, dots(g, seen, size)], 1).contiguous(memory_format=torch.channels_last)
        with torch.autocast("cuda", torch.bfloat16):
            out, heat = model(x)
        loss = loss_of(out.float(), heat.float(), at, size)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 5)
        opt.step()
        with torch.no_grad():
            k = min(0.998, step / (step + 10))
            for a, b in zip(slow.state_dict().values(), model.state_dict().values()):
                if a.dtype.is_floating_point:
                    a.lerp_(b, 1 - k)
        step += 1
        if step % 25 == 0:
            load(1 if have > 20000 else 4)
        if time.time() - spoke > 45:
            spoke = time.time()
            print("%.0f s step %d lessons %d loss %.3f" % (time.time() - began, step, have, loss.item()), flush=True)
            report(slow, hold[0], hold[1][:, :24].view(-1, 2, 6, 2), hold[1][:, 24], size)
    report(slow, hold[0], hold[1][:, :24].view(-1, 2, 6, 2), hold[1][:, 24], size)
    torch.save(slow.state_dict(), o.out + ".pt")
    export(slow, o.out, size)


main()
