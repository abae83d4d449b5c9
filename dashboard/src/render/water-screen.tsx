export function WaterScreen(_: { readonly accountId: string | null; readonly siteId: string | null }) {
  return null;
}
