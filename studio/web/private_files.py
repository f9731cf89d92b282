"""Storage of photographs: a folder of this machine, or a private bucket of object storage. Pure.

Neither has a public address: photographs are served by views that check permission first.
"""

from typing import Any
from urllib.parse import parse_qsl, urlsplit

_ASKED = {"endpoint": "endpoint_url", "region": "region_name"}

_EXAMPLE = "s3://caststead-photos/ashmouth?endpoint=https://objects.example.com&region=eu-west-2"


def photo_storage(address: str) -> dict[str, Any]:
    """Build the STORAGES entry for CASTSTEAD_PHOTOS: "" is the folder CASTSTEAD_MEDIA, else a bucket address.

    Keys are not part of the address: the storage client reads AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY.
    Raises ValueError with a sentence for an address that is not understood.
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
