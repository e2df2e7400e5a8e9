/* bcryptprimitives.dll for Wine 8, which Debian 12 has and which is without it: programs
   that Go builds ask it for random numbers as they start (ProcessPrng), and stop where it
   is not there. Windows has had it since Windows 7, so this is in no archive; .ci/wine
   builds it into the folder in which it tries the programs. */
#include <windows.h>

BOOLEAN NTAPI SystemFunction036(PVOID, ULONG); /* RtlGenRandom, of advapi32 */

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE data, SIZE_T size)
{
    return SystemFunction036(data, (ULONG)size);
}
