"""Photographs: what was sent is looked at, made smaller and made anew, so that nothing but the picture is kept."""

import warnings
from dataclasses import dataclass
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from inventory.core.saying import number_words

MOST_BYTES = 20 * 1024 * 1024
MOST_PIXELS = 60_000_000
LONG_SIDE_PX = 1600
QUALITY = 80
FORMATS = ("JPEG", "PNG", "WEBP")


class NoPhotograph(ValueError):  # noqa: N818 - says what is the matter
    """What was sent is no photograph that can be kept; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photograph as it is kept: JPEG bytes and size."""

    content: bytes
    width: int
    height: int


def picture_of(sent: bytes) -> Picture:
    """Return what is kept of a photograph; NoPhotograph where it is none, or beyond all measure."""
    if not sent:
        raise NoPhotograph("The file is empty. Take the photograph again.")
    if len(sent) > MOST_BYTES:
        raise NoPhotograph(
            f"The file is larger than {MOST_BYTES // 1024 // 1024} MB. Choose a smaller size in the camera."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            return _made_anew(sent)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        most = number_words(MOST_PIXELS / 1e6)
        raise NoPhotograph(
            f"The picture has far more than {most} million points. Choose a smaller size in the camera."
        ) from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Warning) as error:
        if isinstance(error, NoPhotograph):
            raise
        raise NoPhotograph("This is no photograph that can be read: send a JPEG, PNG or WebP file.") from error


def _made_anew(sent: bytes) -> Picture:
    with Image.open(BytesIO(sent), formats=FORMATS) as image:
        if image.width * image.height > MOST_PIXELS:
            raise NoPhotograph(
                f"The picture has {image.width} x {image.height} points. Choose a smaller size in the camera."
            )
        upright = ImageOps.exif_transpose(image).convert("RGB")
    upright.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)
    content = BytesIO()
    plain.save(content, "JPEG", quality=QUALITY)
    return Picture(content=content.getvalue(), width=plain.width, height=plain.height)
