"""Where photographs are kept: a folder of this machine, or a bucket of object storage. Pure.

Neither has a public address: whoever sees a photograph gets it from a view, which asks for
permission first.
"""

from typing import Any
from urllib.parse import parse_qsl, urlsplit

_ASKED = {"endpoint": "endpoint_url", "region": "region_name"}
_EXAMPLE = "s3://caststead-photos/ashmouth?endpoint=https://objects.example.com&region=eu-west-2"


def storage_of(address: str) -> dict[str, Any]:
    """The entry of STORAGES for CASTSTEAD_PHOTOS: "" for the folder CASTSTEAD_MEDIA, else a bucket.

    Keys are not part of the address: the storage's client reads AWS_ACCESS_KEY_ID and
    AWS_SECRET_ACCESS_KEY itself. Raises ValueError with a sentence for an address of another form.
    """
    if not address:
        return {"BACKEND": "django.core.files.storage.FileSystemStorage"}
    parts = urlsplit(address)
    asked = dict(parse_qsl(parts.query, keep_blank_values=True))
    if parts.scheme != "s3" or not parts.hostname or parts.username or asked.keys() - _ASKED:
        raise ValueError(f"CASTSTEAD_PHOTOS is not understood. Write it like {_EXAMPLE}")
    if not all(asked.values()):
        raise ValueError(f"CASTSTEAD_PHOTOS leaves out a value. Write it like {_EXAMPLE}")
    return {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": parts.hostname,
            "location": parts.path.strip("/"),
            "default_acl": "private",
            "querystring_auth": True,
            "file_overwrite": False,
            "signature_version": "s3v4",
            "object_parameters": {"CacheControl": "private, no-store"},
            **{_ASKED[name]: value for name, value in asked.items()},
        },
    }
