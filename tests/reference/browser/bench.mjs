export async function bench() {}
