// Photos are made small on the device: a phone's twelve megapixels would wait for hours on a wet floor's network.

export const longSide = 1600;

// small gives a JPEG of at most longSide pixels, standing upright, without what the camera wrote beside the picture (place, owner).
export async function small(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, longSide / Math.max(picture.width, picture.height));
  const canvas = draw(picture, Math.max(1, Math.round(picture.width * scale)), Math.max(1, Math.round(picture.height * scale)));
  picture.close();
  return new Promise((resolve, reject) => canvas.toBlob((b) => (b ? resolve(b) : reject(new Error("no picture"))), "image/jpeg", 0.8));
}

function draw(picture, width, height) {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [width, height];
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff"; // under what is see-through
  pen.fillRect(0, 0, width, height);
  pen.drawImage(picture, 0, 0, width, height);
  return canvas;
}

// preview is a canvas to look at. (A picture by its blob address would need a hole in the content security policy.)
export async function preview(blob) {
  const picture = await createImageBitmap(blob);
  const scale = Math.min(1, 320 / Math.max(picture.width, picture.height));
  const canvas = draw(picture, Math.max(1, Math.round(picture.width * scale)), Math.max(1, Math.round(picture.height * scale)));
  picture.close();
  canvas.className = "preview";
  canvas.setAttribute("role", "img");
  return canvas;
}
