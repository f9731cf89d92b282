/* A photograph from the camera, made small enough to be kept and sent: never wider than a canvas of
   the tablet's engine holds (16.7 megapixels), upright, as JPEG. What cannot be decoded here goes
   home as it is; the server knows more formats. */
export const MOST_PIXELS = 16_700_000;
export const LONGEST_SIDE = 3000;
export const MOST_BYTES = 25_000_000;
const QUALITY = 0.86;

/** How far to scale so that both bounds hold; never above 1. */
export function scale(width, height) {
  return Math.min(1, LONGEST_SIDE / Math.max(width, height), Math.sqrt(MOST_PIXELS / (width * height)));
}

/** {bytes: ArrayBuffer, type, size}. Throws a RangeError with a sentence for what is too large. */
export async function small(file) {
  const bytes = (await scaled(file)) ?? (await file.arrayBuffer());
  const type = bytes.type ?? file.type ?? "";
  const held = bytes.bytes ?? bytes;
  if (held.byteLength > MOST_BYTES) {
    throw new RangeError("This picture is larger than 25 MB. Take it again with the tablet’s own camera.");
  }
  if (held.byteLength === 0) throw new RangeError("This picture is empty. Take it again.");
  return { bytes: held, type, size: held.byteLength };
}

async function scaled(file) {
  const picture = await decoded(file);
  if (!picture) return null;
  const by = scale(picture.width, picture.height);
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * by));
  canvas.height = Math.max(1, Math.round(picture.height * by));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close?.();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  canvas.width = canvas.height = 0; // WebKit keeps the memory of a canvas otherwise
  return blob ? { bytes: await blob.arrayBuffer(), type: "image/jpeg" } : null;
}

/** The picture upright, or null where this browser cannot read it. */
async function decoded(file) {
  try {
    return await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch (trouble) {
    return trouble instanceof TypeError ? asElement(file) : null; // an engine without that option
  }
}

async function asElement(file) {
  const picture = new Image();
  picture.src = URL.createObjectURL(file);
  try {
    await picture.decode();
    return picture;
  } catch {
    return null;
  } finally {
    URL.revokeObjectURL(picture.src);
  }
}

/** SHA-256 in hex; empty where the page is not on a secure address and the browser refuses. */
export async function digest(bytes) {
  if (!crypto.subtle) return "";
  const sum = await crypto.subtle.digest("SHA-256", bytes);
  return [...new Uint8Array(sum)].map((each) => each.toString(16).padStart(2, "0")).join("");
}

/** The bytes as base64, for the file that the desk imports. */
export function base64(bytes) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result.slice(reader.result.indexOf(",") + 1));
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(new Blob([bytes]));
  });
}
