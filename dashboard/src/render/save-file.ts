/** Hands a file to the person's device. */
export function saveFile(name: string, type: string, content: string | Blob): void {
  const address = URL.createObjectURL(typeof content === 'string' ? new Blob([content], { type }) : content);
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  link.click();
  // The download has begun by the next turn; the browser keeps its own hold on the data.
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
