"""Similarity of working copies of a photo to the best possible one: PSNR and SSIM, and their bytes; as JSON.

    photo_quality.py FILE COPY...

The best one: the whole photo decoded, rotated upright and resized in double precision by a windowed sinc of three
lobes, scaled to the copy's size, and not encoded. SSIM (Wang et al. 2004) on luma, over squares of 8 by 8 pixels.
"""

import json
import os
import sys

import numpy as np
import pyvips


def weights(full, small):
    scale = full / small
    centre = (np.arange(small) + 0.5) * scale - 0.5
    distance = (np.arange(full)[None, :] - centre[:, None]) / scale
    kernel = np.where(np.abs(distance) < 3, np.sinc(distance) * np.sinc(distance / 3), 0.0)
    return kernel / kernel.sum(axis=1, keepdims=True)


def luma(image):
    return image @ np.array([0.299, 0.587, 0.114])


def psnr(a, b):
    return float(10 * np.log10(255**2 / np.mean((a - b) ** 2)))


def ssim(a, b):
    def squares(image):
        height, width = (side // 8 * 8 for side in image.shape)
        cut = image[:height, :width].reshape(height // 8, 8, width // 8, 8)
        return cut.transpose(0, 2, 1, 3).reshape(-1, 64)

    a, b = squares(a), squares(b)
    mean_a, mean_b = a.mean(axis=1), b.mean(axis=1)
    cov = ((a - mean_a[:, None]) * (b - mean_b[:, None])).mean(axis=1)
    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    top = (2 * mean_a * mean_b + c1) * (2 * cov + c2)
    return float((top / ((mean_a**2 + mean_b**2 + c1) * (a.var(axis=1) + b.var(axis=1) + c2))).mean())


def main():
    file, *copies = sys.argv[1:]
    full = pyvips.Image.new_from_file(file).autorot().numpy().astype(np.float64)
    for copy in copies:
        seen = pyvips.Image.new_from_file(copy).numpy().astype(np.float64)
        across, down = weights(full.shape[1], seen.shape[1]), weights(full.shape[0], seen.shape[0])
        best = np.stack([down @ full[..., channel] @ across.T for channel in range(3)], axis=-1)
        best = np.clip(best, 0, 255)
        answer = {
            "psnr": round(psnr(seen, best), 2),
            "psnr_luma": round(psnr(luma(seen), luma(best)), 2),
            "ssim_luma": round(ssim(luma(seen), luma(best)), 4),
            "bytes": os.path.getsize(copy),
        }
        print(json.dumps({"copy": os.path.basename(copy), **answer}))


if __name__ == "__main__":
    main()
