@echo off
rem Takes away what add-file-types.cmd wrote, and nothing else: a file type that has
rem been given to another program since stays with it.
call :remove .stopladder Stopladder.Roll
call :remove .ladderplan Stopladder.Plan
call :remove .ladderpack Stopladder.Pack
echo Windows no longer opens rolls, plans and packs with Stopladder.
if "%~1"=="" pause
exit /b 0

:remove
reg query "HKCU\Software\Classes\%1" /ve 2>nul | find "%2" >nul
if not errorlevel 1 reg delete "HKCU\Software\Classes\%1" /f >nul
reg delete "HKCU\Software\Classes\%2" /f >nul 2>nul
exit /b 0
