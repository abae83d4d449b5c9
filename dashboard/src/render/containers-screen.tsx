export function ContainersScreen() {
  return null;
}
