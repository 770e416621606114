"""Films of our own labels for a browser's fake camera: one picture a condition, shaken a little from frame to frame."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from pathlib import Path

from PIL import Image, ImageChops, ImageDraw, ImageFilter

from inventory import labels

WIDTH, HEIGHT = 1280, 720


@dataclass(frozen=True, slots=True)
class Scene:
    """How a label stands before the camera. `side` is its symbol's side in pixels of the picture."""

    name: str
    texts: tuple[str, ...]
    level: str = "M"
    side: int = 260
    turn: float = 0.0
    blur: float = 0.0
    smear: int = 0
    contrast: float = 1.0
    glare: int = 0  # how much light falls over one corner, of 255
    inverted: bool = False


CONDITIONS = (
    Scene("case label, easy", ("case",)),
    Scene("case label, turned 35°", ("case",), turn=35),
    Scene("case label, far", ("case",), side=84),
    Scene("case label, out of focus", ("case",), side=180, blur=2.2),
    Scene("case label, moving", ("case",), side=220, smear=9),
    Scene("case label, dim", ("case",), side=180, contrast=0.16),
    Scene("case label, glare", ("case",), glare=150),
    Scene("case label, a corner lost in glare", ("case",), glare=235),
    Scene("case label, very far", ("case",), side=62),
    Scene("case label, badly out of focus", ("case",), side=180, blur=4),
    Scene("case label, white on black", ("case",), inverted=True),
    Scene("drive label, close", ("drive",), level="H", side=150),
    Scene("drive label, turned, blurred", ("drive",), level="H", side=130, turn=20, blur=1.4),
    Scene("two labels in view", ("case", "drive"), side=180),
)


def text_of(kind: str, code: str) -> str:
    return f"HTTPS://GEAR.EXAMPLE.ORG/T/{code}" if kind == "case" else code


def symbol(text: str, level: str, side: int) -> Image.Image:
    """The label's own symbol with its quiet zone, drawn large and brought to size as a lens would."""
    rows = labels.matrix(text, level)
    width = len(rows) + 2 * labels.QUIET
    plain = Image.new("L", (width, width), 255)
    for y, row in enumerate(rows):
        for x, dark in enumerate(row):
            if dark:
                plain.putpixel((x + labels.QUIET, y + labels.QUIET), 20)
    large = plain.resize((width * 16, width * 16), Image.NEAREST)
    return large.resize((side, side), Image.LANCZOS)


def background(chance: random.Random) -> Image.Image:
    """A dock: something dark and busy behind the label."""
    picture = Image.new("L", (WIDTH, HEIGHT), 70)
    pen = ImageDraw.Draw(picture)
    for _ in range(60):
        x, y = chance.randrange(WIDTH), chance.randrange(HEIGHT)
        pen.rectangle(
            (x, y, x + chance.randrange(20, 300), y + chance.randrange(8, 120)), fill=chance.randrange(30, 130)
        )
    return picture


def frame(scene: Scene, chance: random.Random) -> Image.Image:
    """One picture of the scene, a little off from the last one."""
    picture = background(random.Random(scene.name))
    for n, text in enumerate(scene.texts):
        level = scene.level if len(scene.texts) == 1 else "M"
        label = symbol(text, level, scene.side)
        if scene.inverted:
            label = ImageChops.invert(label)
        mask = Image.new("L", label.size, 255)
        turn = scene.turn + chance.uniform(-2, 2)
        label, mask = (one.rotate(turn, Image.BICUBIC, expand=True) for one in (label, mask))
        x = WIDTH * (n + 1) // (len(scene.texts) + 1) - label.width // 2 + chance.randrange(-6, 7)
        y = (HEIGHT - label.height) // 2 + chance.randrange(-6, 7)
        picture.paste(label, (x, y), mask)
    return _lens(picture, scene, chance)


def _lens(picture: Image.Image, scene: Scene, chance: random.Random) -> Image.Image:
    if scene.glare:
        light = Image.new("L", picture.size, 0)
        ImageDraw.Draw(light).ellipse(
            (WIDTH // 2 - 20, HEIGHT // 2 - 150, WIDTH // 2 + 260, HEIGHT // 2 - 20), fill=scene.glare
        )
        picture = ImageChops.add(picture, light.filter(ImageFilter.GaussianBlur(38)))
    if scene.contrast < 1:
        picture = picture.point(lambda value: int(60 + (value - 60) * scene.contrast))
    if scene.smear:
        smeared = picture
        for step in range(1, scene.smear):
            smeared = Image.blend(smeared, ImageChops.offset(picture, step, 0), 1 / (step + 1))
        picture = smeared
    if scene.blur:
        picture = picture.filter(ImageFilter.GaussianBlur(scene.blur))
    noise = Image.effect_noise(picture.size, 9)
    return ImageChops.add(picture, noise, scale=1, offset=-128)


def film(scenes: list[Scene], path: Path, *, frames: int = 12, seed: int = 1) -> Path:
    """The scenes one after another, `frames` pictures each; the fake camera plays the film round and round."""
    chance = random.Random(seed)
    with path.open("wb") as out:
        for scene in scenes:
            for _ in range(frames):
                frame(scene, chance).convert("RGB").save(out, "JPEG", quality=88)
    return path


def with_codes(scene: Scene, codes: list[str]) -> Scene:
    """The scene with real codes where its texts say only the kind of label."""
    return replace(scene, texts=tuple(text_of(kind, code) for kind, code in zip(scene.texts, codes, strict=False)))
