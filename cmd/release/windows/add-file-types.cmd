@echo off
rem Has Windows open rolls, plans and packs with the stopladder.exe beside this file.
rem It writes under HKEY_CURRENT_USER alone, which asks for no administrator, and
rem remove-file-types.cmd takes it away again. Start it anew after moving the folder.
setlocal DisableDelayedExpansion
set "exe=%~dp0stopladder.exe"
if not exist "%exe%" goto apart
call :add .stopladder Stopladder.Roll "Stopladder roll"
if errorlevel 1 goto failed
call :add .ladderplan Stopladder.Plan "Stopladder plan of a bracket"
if errorlevel 1 goto failed
call :add .ladderpack Stopladder.Pack "Stopladder pack of a roll"
if errorlevel 1 goto failed
echo Rolls, plans and packs open with Stopladder now.
if "%~1"=="" pause
exit /b 0

:add
reg add "HKCU\Software\Classes\%1" /ve /d "%2" /f >nul
if errorlevel 1 exit /b 1
reg add "HKCU\Software\Classes\%2" /ve /d %3 /f >nul
if errorlevel 1 exit /b 1
reg add "HKCU\Software\Classes\%2\DefaultIcon" /ve /d "\"%exe%\",0" /f >nul
if errorlevel 1 exit /b 1
reg add "HKCU\Software\Classes\%2\shell\open\command" /ve /d "\"%exe%\" \"%%1\"" /f >nul
if errorlevel 1 exit /b 1
exit /b 0

:apart
echo stopladder.exe is not beside this file. Unpack the whole archive into one folder, then start this again.
if "%~1"=="" pause
exit /b 1

:failed
echo Windows did not let the file types be written. Ask who looks after this computer.
if "%~1"=="" pause
exit /b 1
