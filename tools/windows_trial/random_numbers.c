/* bcryptprimitives.dll as far as it is asked for here: Debian's wine has none, and Rust takes its random numbers from it. */
__declspec(dllimport) unsigned char __stdcall SystemFunction036(void *buffer, unsigned long size);

__declspec(dllexport) int __stdcall ProcessPrng(unsigned char *buffer, unsigned long long size)
{
    return SystemFunction036(buffer, (unsigned long)size);
}
