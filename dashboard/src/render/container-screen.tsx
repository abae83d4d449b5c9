export function ContainerScreen(_: { readonly containerId: string }) {
  return null;
}
